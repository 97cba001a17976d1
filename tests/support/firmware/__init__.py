"""The boards' programs on an emulated chip: tools, the runner, what goes in and what comes out."""
