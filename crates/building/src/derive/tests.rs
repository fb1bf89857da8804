mod houses;
mod problems;
mod scenario;
