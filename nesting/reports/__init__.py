"""What a plan adds up to: figures, and the summaries people read."""
