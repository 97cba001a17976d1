"""Name the colours that colour-blind people can tell apart."""

# What people write when they mean one of them.
NEAREST = {
    "red": "vermillion",
    "green": "bluish_green",
    "purple": "reddish_purple",
    "pink": "reddish_purple",
    "violet": "reddish_purple",
    "magenta": "reddish_purple",
    "cyan": "sky_blue",
    "light_blue": "sky_blue",
    "amber": "orange",
    "vermilion": "vermillion",
    "grey": "white",
    "gray": "white",
}
