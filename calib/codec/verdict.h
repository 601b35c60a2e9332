// What a decoder made of a file. Unless it is WHOLE, the decoder has put its own
// words into the text its caller gave it, 200 bytes at most.
enum verdict { WHOLE, CUT_SHORT, DAMAGED, UNSUPPORTED };
