"""Document control: what documents are called, who signed them, and the hashes of what they were made from."""
