"""What is kept about people, and their own data to take away."""
