"""Plans: who goes where with what, solved exactly, explained, and judged again by the same rules."""
