"""Pure array functions, each a leaf: arrays in, arrays out, no files, clock or printing."""
