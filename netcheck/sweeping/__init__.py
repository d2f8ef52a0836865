"""The nightly sweep: the question of one device, asked of a whole fleet."""
