"""Device packages as pip leaves them: a module and its metadata in a folder on the path of the worker."""
