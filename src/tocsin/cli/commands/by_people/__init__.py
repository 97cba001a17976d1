"""The ways of `tocsin measure` in which a person takes part, one file each."""
