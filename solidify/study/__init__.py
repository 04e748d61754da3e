"""Studies: many cases made from one, marched as one batch, and judged. A study draws nothing."""
