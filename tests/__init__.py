"""The suite, and the scripts that attack and measure: none of them plays the project of a folder that they stand in."""

import os

os.environ["TOCSIN_PROJECT"] = ""
