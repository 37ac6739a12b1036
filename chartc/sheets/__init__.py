"""Handouts."""
