"""Fonts, fitting, shapes and plots that cards, pictures and pages share."""
