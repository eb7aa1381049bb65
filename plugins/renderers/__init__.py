"""Renderers: read-only tables in, named artefacts out; each module with a hook is one kind of page."""
