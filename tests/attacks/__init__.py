"""What a slip, a hostile folder or a full disk can do, tried by the thousand (slow assurance)."""
