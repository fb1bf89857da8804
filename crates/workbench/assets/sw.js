// Keeps the pages of the site log at hand for when the connection is gone; everything else goes to the server.
'use strict';
