"""What people may not notice, cannot do in time, or must not be shown."""
