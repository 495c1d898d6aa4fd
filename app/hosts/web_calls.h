// What the page does for the hosts: defined in app/web/calls.js. Texts are UTF-8 and end in a zero.
#pragma once

extern "C" {
/// A turn is wanted soon: something is due.
void railside_page_wake();
void railside_page_ask(int what); // Outside::Ask
void railside_page_give(const char* path);
/// Answered by web_image(ticket, ...).
void railside_page_picture(const char* hash, int longest, int ticket);
/// `hashes` one a line; answered by web_brought(ticket, ...), before it web_hold for each picture.
void railside_page_bring(const char* hashes, int pictures, int ticket);
void railside_page_brought_used(int ticket);
void railside_page_line(const char* line);
void railside_page_file(const char* hash, const void* bytes, unsigned size);
/// Answered by web_camera_state and web_camera_frame.
void railside_page_camera(int open);
/// Answered by web_camera_picture.
void railside_page_shutter();
}
