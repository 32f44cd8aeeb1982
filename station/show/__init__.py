"""What a person sees: a painter of scenes, the window, the clip and the stills."""
