"""A bench file (``TOCSIN_BENCH``) that plugs nothing in: with it a rig may name a pseudo-terminal as its port."""
