"""Placeholder text until the room is built."""
