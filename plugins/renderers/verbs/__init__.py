"""Small pure table verbs: text, escape, slug, limit, verdict, page."""
