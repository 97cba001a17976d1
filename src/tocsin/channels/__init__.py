"""The four devices: rumble, light, screen, sound. Time is an argument; one worker main drives them all."""
