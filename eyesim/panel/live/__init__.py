"""The live session before a group: its layout, its words, its pictures and what it remembers."""
