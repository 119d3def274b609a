"""Pages for people: the supervisor's review, the live page beside the bench, practice. Local, server-rendered, no build step."""
