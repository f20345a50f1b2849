import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';

/** The page is files that the server hands out: no inline script or style, nothing from elsewhere (its policy: self only). */
export default defineConfig({
  root: import.meta.dirname,
  plugins: [svelte()],
  build: {
    outDir: 'dist',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    chunkSizeWarningLimit: 250,
  },
});
