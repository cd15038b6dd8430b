"""The local page: one process, served by this machine, for a telephone on the terrace. Needs the extra `page`."""
