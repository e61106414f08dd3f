"""The rim: HTTP, files, database, processes and the command line. The only place that does I/O."""
