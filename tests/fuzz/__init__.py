"""Good files altered at random: whatever a reader is given, it reads it or says in plain lines what is wrong."""
