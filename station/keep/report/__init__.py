"""Reports: a session, or a runner's visits, as a page to read and print."""
