"""Forms made from the survey's models: fields in plain words, read back from a posted page, faults in words."""
