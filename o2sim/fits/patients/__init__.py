"""What the books say of patients: who comes, who is put on oxygen, at what flow, for how long."""
