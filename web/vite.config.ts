import { svelte } from '@sveltejs/vite-plugin-svelte';
import { createHash } from 'node:crypto';
import { readdirSync, readFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import { build, defineConfig, type Plugin } from 'vite';

/** The page is files that the server hands out: no inline script or style, nothing from elsewhere (its policy: self only). */
export default defineConfig({
  root: import.meta.dirname,
  plugins: [svelte(), serviceWorker()],
  build: {
    outDir: 'dist',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    chunkSizeWarningLimit: 250,
  },
});

/**
 * The service worker is built behind the page, as one plain script that knows the names of the page's files and a digest
 * of what is in them: another build is another worker.
 */
function serviceWorker(): Plugin {
  return {
    name: 'service-worker',
    apply: 'build',
    async closeBundle() {
      const folder = join(import.meta.dirname, 'dist');
      const files = readdirSync(folder, { recursive: true, withFileTypes: true })
        .filter((entry) => entry.isFile())
        .map((entry) => `/${relative(folder, join(entry.parentPath, entry.name)).replaceAll('\\', '/')}`)
        .filter((path) => path !== '/service-worker.js')
        .sort();
      const digest = createHash('sha256');
      for (const path of files) digest.update(path).update(readFileSync(join(folder, path)));
      const shell = {
        id: digest.digest('hex').slice(0, 16),
        files: files.filter((path) => path !== '/index.html'),
      };
      await build({
        configFile: false,
        root: import.meta.dirname,
        publicDir: false,
        logLevel: 'warn',
        define: { __BUILD__: JSON.stringify(shell) },
        build: {
          outDir: 'dist',
          emptyOutDir: false,
          target: 'es2022',
          rollupOptions: {
            input: 'src/worker/service-worker.ts',
            output: { format: 'iife', entryFileNames: 'service-worker.js' },
          },
        },
      });
    },
  };
}
