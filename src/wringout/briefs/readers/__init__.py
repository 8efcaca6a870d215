"""Briefs for one kind of reader each: members, instructor, and slides to be shown."""
