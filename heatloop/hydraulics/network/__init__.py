"""The pipe network as arrays, and its flow solver."""
