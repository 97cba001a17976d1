"""The service as a process, with a conductor that plays a match without devices."""
