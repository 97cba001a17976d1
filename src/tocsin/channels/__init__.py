"""The four devices, a room each; time is an argument."""
