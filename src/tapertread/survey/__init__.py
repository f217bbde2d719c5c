"""What was measured, kept for good."""
