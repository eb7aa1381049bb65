"""The doors: importers read what instruments export, renderers write what people read."""
