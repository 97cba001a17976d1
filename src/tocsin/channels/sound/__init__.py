"""The loudspeaker."""
