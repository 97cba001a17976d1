"""How late signals leave the program, beside other ways."""
