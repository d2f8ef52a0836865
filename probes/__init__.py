"""One protocol a file or folder: each asks the world, and reads what came back into netcheck's facts."""
