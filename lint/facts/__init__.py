"""What rules may ask for: each module makes one kind of fact, once, when a rule first needs it."""
