"""What runs on disk say, marks added later, runs watched from elsewhere."""
