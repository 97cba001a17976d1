"""One file read in spite of its mistakes, each with its position and its sentence."""
