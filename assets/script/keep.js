// Has the browser keep the pages of the course that are opened; see offline.js.
navigator.serviceWorker?.register("/offline.js");
