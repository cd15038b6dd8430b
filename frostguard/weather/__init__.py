"""Weather: fetched from an open service or read from files, checked, and given its uncertainty."""
