"""What goes over the wire beside surveys and estimates: requests, public forms of records, problems."""
