"""Pages about giving trees out and about taps."""
