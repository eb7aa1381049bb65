"""Plugins in code run in a process of their own: a crash, a hang or a stray print hurts only what was asked."""
