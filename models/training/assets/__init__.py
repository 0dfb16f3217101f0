"""Pictures that training borrows: captured environment maps and real negative photographs."""
