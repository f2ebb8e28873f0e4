"""Bad nights for a studio: what they are made of, and what must hold after each."""
