"""How fast the door of the tablets is: real tablets against the real server, beside one bare INSERT a request."""
