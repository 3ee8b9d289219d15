"""Document control: identification, signatures and hashes of documents."""
