"""What the pipeline itself writes: runs, exports, refusals, property values, judgements."""
