"""What the bank holds, by charge counted between full charges and by its volts."""
