"""What a project document says: one module per chapter, and the reference libraries beside it."""
