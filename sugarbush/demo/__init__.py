"""The invented town of Quillhaven, made from a seed. Nothing here is a real place, person or tree."""
