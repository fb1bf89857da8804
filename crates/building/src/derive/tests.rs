mod scenario;
