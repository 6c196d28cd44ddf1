"""One file a noun: what each path takes and answers. No arithmetic, no queries."""
