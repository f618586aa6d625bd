// Package oidc logs people in with an identity provider: OpenID Connect Core 1.0, the
// authorization code flow with PKCE (RFC 7636, S256), state and nonce, the provider
// found by its discovery document. It comes back with an api.Guest, whose role is read
// off a claim of groups, and App.Admit does the rest.
//
// What belongs to one attempt (state, nonce, the PKCE verifier) is not kept here: Begin
// hands it out as a text for the browser that began, in a cookie that scripts cannot
// read and that is sent over TLS only, and Finish wants it back. So an attempt that was
// begun in one browser cannot be finished in another.
//
// Deliberately absent: access and refresh tokens, which are dropped, the userinfo
// endpoint, logging out at the provider, and providers without discovery. Accounts and
// sessions are package api's.
package oidc
