"""Follows a running pip and tells a person, every few seconds, what it is doing.

Standard library only, readable by Python 3.8: part of the set-up in `bootstrap.py`.
"""

import queue
import subprocess
import sys
import threading
import time


def say(text):
    """Print progress on stderr at once, so that a tool's own output can be piped."""
    print(text, file=sys.stderr, flush=True)


def follow(process):
    """Tell what pip is doing every few seconds until it ends; returns its lines."""
    heard, lines = queue.Queue(), []
    threading.Thread(target=read_into, args=(process.stdout, heard), daemon=True).start()
    began = told = time.monotonic()
    doing, last = "starting pip", ""
    while True:
        try:
            line = heard.get(timeout=1)
        except queue.Empty:
            line = ""
        if line is None:
            return lines
        if line:
            lines.append(line.rstrip())
            doing = activity(line) or doing
        now = time.monotonic()
        if now - told >= (10 if doing == last else 3):
            say(f"  {now - began:4.0f} s  {doing}")
            told, last = now, doing


def read_into(stream, heard):
    """Put each line of `stream` into the queue, then None."""
    for line in stream:
        heard.put(line)
    heard.put(None)


def activity(line):
    """A short present-tense reading of one line of pip's output, or "".

    >>> activity("Collecting numpy>=1.26 (from coldbench==0.1.0)")
    'fetching numpy'
    >>> activity("Installing collected packages: a, b, c")
    'installing 3 packages'
    """
    words = line.split()
    if line.startswith("Collecting ") and len(words) > 1:
        return "fetching " + words[1].split("[")[0].rstrip("<>=!~;,.0123456789")
    if line.startswith("Installing collected packages:"):
        return f"installing {len(line.split(':', 1)[1].split(','))} packages"
    if words and words[0] in ("Preparing", "Building", "Installing"):
        return "preparing Coldbench itself"
    return ""


def stop(process):
    """End a pip that still runs, gently first."""
    if process.poll() is None:
        process.terminate()
        try:
            process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()
