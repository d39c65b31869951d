"""Pictures as files: TIFF, PNG and JPEG read and written band by band, with what they say of
themselves."""
