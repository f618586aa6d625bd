// Package web has the pages of the service for the people at the desk: HTML from
// templates, written on the server, that works without scripts. A script adds live
// news and dragging.
//
// A page is a file with its address, what it shows and what its forms do; its
// template of the same name is in folder page. Every change goes through package api,
// as the same person, with the same rights as over REST, and every refusal is shown
// beside the form that it refuses, with what to do instead.
//
// Deliberately absent: the store, passwords and cookies (a Door keeps them), and any
// rule about plants.
package web
