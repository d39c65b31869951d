"""Reports as PDF: `document.pdf(report)` gives the file; `blocks` draws each kind of block."""
