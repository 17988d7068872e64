"""What is bought and what is paid for it. It decides nothing and knows no foundation."""
