"""The set-up's loop: pictures in, pages out, wishes done."""
