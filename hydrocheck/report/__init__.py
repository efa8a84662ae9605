"""What people and programs read: text tables, the JSON envelope, files. Computes no physics."""
