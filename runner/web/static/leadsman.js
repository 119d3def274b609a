"use strict";
// Keys and play buttons. Every page works without it.
