"""Starter plans, new rigs, single values edited."""
