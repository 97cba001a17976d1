"""What each table and value of a file may be."""
